"""Pages to look at: engraved sheets and drawings, as text of SVG or bytes of PDF."""
