"""An invented shop in an invented town, the same every time, built through the program's own actions.

It stands on the top floor because a demo is a whole job: from the call to the payment.
"""
