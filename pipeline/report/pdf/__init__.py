"""Page models printed: templates, typefaces, the processes that print."""
