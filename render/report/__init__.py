"""Reports for whoever reviews a change of knowledge: text, Markdown, and HTML with both charts."""
