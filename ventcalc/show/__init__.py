"""Show: drawings, plots, reports and controls: what turns records into something to look at.

Works out nothing about a vent: each number comes from a Part above. Words stand in templates beside it and in
`data/`, apart from the code that fills them.
"""
