"""Part VI, job: a whole job from its file to the judgement of every design.

The job file, then design (what would be built), operation (what it does), judgement (what speaks against it), for the
vent as drawn, each remedy and each alternate alike. Figures and findings as records; knows no page and no picture.
"""
