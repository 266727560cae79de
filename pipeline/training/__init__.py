"""How the learned eye of `seamsurvey.sight` was trained: scenes, network, chooser, tables. Not in the wheel.

Needs PyTorch (and, for the chooser, scikit-learn), which the program itself never does.
"""
