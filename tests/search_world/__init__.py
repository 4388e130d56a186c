"""A world of cases for measuring search: circuits solved by ngspice, cases drawn from them."""
