"""How git is told to compare and to merge rigs by ferrule; printed by `--git-setup`."""

from __future__ import annotations

SETUP = """\
# Once in a repository; with --global after `config`, once for all of yours:
git config diff.rig.command 'ferrule diff --git'
git config diff.rig.textconv 'ferrule diff --listing'
git config merge.rig.name 'statement by statement, by ferrule'
git config merge.rig.driver 'ferrule merge %O %A %B %P --marker-size %L'

# And in the repository's .gitattributes, to be committed:
*.rig diff=rig merge=rig

# `git diff` then tells changes of a rig by ferrule, `git show` and `git log -p` by lines in an
# order of their own (--ext-diff: by ferrule as well). `git diff --no-ext-diff` is git's own again.
# `git merge`, `rebase` and `cherry-pick` put rigs together statement by statement. Whoever has not
# told their git merges them by line, as before.
"""
