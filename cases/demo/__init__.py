"""The demo: invented shops, people, vehicles and cases that show the whole of the job."""

from cases.demo.loading import DEMO_PASSWORD, SignIn, load, sign_ins

__all__ = ["DEMO_PASSWORD", "SignIn", "load", "sign_ins"]
