"""The recipes of DEVELOPERS.md, each followed on a scratch copy of the tree."""
