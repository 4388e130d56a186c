"""The pages of cases: find the thing among those this person may see, one service call, render."""
