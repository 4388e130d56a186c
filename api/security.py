"""What the browser may load, and which address a request came from."""

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

PAGES = {
    "default-src": "'self'",
    "script-src": "'self'",
    "style-src": "'self'",
    "img-src": "'self' data: blob:",
    "object-src": "'none'",
    "base-uri": "'none'",
    "form-action": "'self'",
    "frame-ancestors": "'none'",
}
# The script that draws the API's description writes styles into the page; it shows no case.
API_DOCS = PAGES | {"style-src": "'self' 'unsafe-inline'"}
API_DOCS_PATH = "/api/docs/"


class ContentSecurityPolicyMiddleware:
    """Tell the browser to load from this server alone and to run no script written into a page."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        """Add the policy to the answer."""
        response = self.get_response(request)
        policy = API_DOCS if request.path.startswith(API_DOCS_PATH) else PAGES
        text = "; ".join(f"{directive} {sources}" for directive, sources in policy.items())
        response.headers.setdefault("Content-Security-Policy", text)
        return response


def client_address(request: HttpRequest) -> str:
    """Return the address that our outermost proxy saw, or the peer's when there is no proxy.

    Everything to the left of what our own proxies wrote can be made up by the client.
    """
    peer = str(request.META.get("REMOTE_ADDR", ""))
    proxies: int = settings.PROXIES
    forwarded = request.headers.get("X-Forwarded-For", "").split(",")
    if not 0 < proxies <= len(forwarded):
        return peer
    return forwarded[-proxies].strip() or peer
