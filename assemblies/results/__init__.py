"""What is found out, as plain values: the model of results.json, findings, how both are told, and the folder
they go to.

In: numbers and words of any room. Out: `Results`, `Finding`, text. Uses: nothing but `parts`.
"""
