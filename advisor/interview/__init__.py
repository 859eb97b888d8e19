"""The interview behind `advisor ask`: what to ask next, what an answer means, and the file that comes of it.

Pure functions, but for `keep`: a state gives the next question, an answer gives the next state or a complaint, a state
gives the text of a site file. The wording is data (`data/interview.yaml`).
"""
