"""The door for scripts to drawings of flat parts: write a blank, read it back. All of it is in
`parts.files.blank`."""

from parts.files.blank import BlankError, BlankFile, ReadBack, read_blank, write_blank

__all__ = ["BlankError", "BlankFile", "ReadBack", "read_blank", "write_blank"]
