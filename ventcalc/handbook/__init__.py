"""The chapters, subject by subject: their questions, live controls, checks and figures."""
