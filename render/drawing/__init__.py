"""Drawing in millimetres: ink, typefaces, signs, bench marks, and the SVG and DOT of them."""
