"""The practice page: one HTML file that plays, loops, slows down and shows.

Pure: from a performance to the data of the page, and from data and pieces to the document.
"""
