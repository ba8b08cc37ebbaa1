"""Letter, sheet, card and purchase list: content as plain data, then a PDF (typst), a page (HTML) or a table."""
