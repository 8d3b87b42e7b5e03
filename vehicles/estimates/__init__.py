"""How long work takes on site: from the shop's own jobs, with a range, honest where there are few of them.

The model. Let y be the natural logarithm of a job's minutes on site, since such times are multiplied rather than added
to by what makes them long. A job of a kind of work on a model of a make, done by a technician, has

    y = log(usual minutes of the kind in the price book) + shop + kind + make + model + technician + rest

where each word but the last is an effect drawn from a normal distribution with mean 0 and a variance of its own, tau
squared, nested as they are named (a make within a kind, a model within a make), with technicians across. `rest` is the
spread of like jobs. What is known of an effect is its own mean drawn toward the mean of the family above, the more, the
fewer jobs it has (`pooling`); the taus are learned from the data. Effects and spread are found so that a forgotten
finish does not move them (`fitting`), and the 80 % range counts all that is not known (`model`).

Sources: A. Gelman et al., Bayesian Data Analysis, 3rd ed. 2013, sections 5.4 and 5.5; C. Morris, Parametric empirical
Bayes inference, JASA 78, 1983; P. Huber and E. Ronchetti, Robust Statistics, 2nd ed. 2009, section 7.8.
"""

from .checking import CheckLine, check_held_out, check_shops
from .fitting import fit
from .model import Effect, Estimate, Key, Model, Node, Observation, keys_of, name_key, quarters

__all__ = [
    "CheckLine",
    "Effect",
    "Estimate",
    "Key",
    "Model",
    "Node",
    "Observation",
    "check_held_out",
    "check_shops",
    "fit",
    "keys_of",
    "name_key",
    "quarters",
]
