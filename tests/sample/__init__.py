"""The sample exports: an invented season of three groups, written from a fixed seed."""
