"""Open data: flow tests of heads whose owners agreed, without names, out of a shop and into one."""
