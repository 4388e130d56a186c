"""Older logs of a shop: thousands of cases from one file, each good one in, each bad line told.

log_file      the file taken apart into the lines of each case
table_cases   a case from the lines of a table
line_cases    a case from a line of JSON
naming        the circuits that a log names, among those stored here
building      a case as rows that are not written yet, by the rules of the other services
understanding readings that many lines of a log say alike, worked out once
writing       rows of many cases into the database, with what search keeps of them
taking_in     what people do with a log, and the steps in which the worker does it
refused       what did not come in, as a file that can be mended and brought in again
"""
