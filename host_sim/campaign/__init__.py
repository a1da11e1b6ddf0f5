"""The fault campaign: every fault in every phase of flight, judged against the truth.

    python -m host_sim.campaign --help
"""
