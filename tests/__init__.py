"""All tests of Rindline; a package, so that no other called ``tests`` stands in its way."""
