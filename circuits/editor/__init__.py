"""Writing a circuit in the browser: the table that shows a text form, drafts, and starts.

The text form stays the one form of a circuit. `table` says which columns its lines have,
`splitting` and `writing` go from lines to cells and back without loss, and `judging` lets the
reader of the text form judge what was typed and tells it by row and cell.
"""
