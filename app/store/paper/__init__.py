"""The facts behind papers: worksheets, class sets, handouts, saved papers."""
