"""Part IV, draft: fans, dampers and controls that hold the draft, and what they do in time.

Curves and their laws, what a device must do in every state, where its sensor stands, the loop, the start sequence and
its proof. Knows the vent, not the building around it and not the job that asks.
"""
