"""One rule, one module: the file is named after the rule's id. The registry walks this package; nothing else lists its rules."""
