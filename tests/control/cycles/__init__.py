"""Tests of the canned cycles; a package, so that its helpers and the names of its modules are its own."""
