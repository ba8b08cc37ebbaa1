"""Paper: typst templates, and the text that goes into them as data."""

from shimopt.render.paper.compile import PaperResult, pdf_of

__all__ = ["PaperResult", "pdf_of"]
