"""Papers besides worksheets: one pure builder each, from facts to a document."""
