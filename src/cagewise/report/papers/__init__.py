"""Papers: what is handed to others, as a printed document or a self-contained page.

A paper is made of blocks (:mod:`cagewise.report.papers.paper`) that know nothing of how they are
drawn; ``pdf`` and ``page`` draw them. Text is text: nothing in it is markup.
"""
