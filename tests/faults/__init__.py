"""What a call goes through and must survive: `python -m tests.faults.campaign` kills it a hundred times."""
