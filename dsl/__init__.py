"""The rig language: grammar, reader, kinds, model, writer."""

VERSION = "0.1.0"
