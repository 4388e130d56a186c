"""Sign in for a token, list one's tokens, revoke one."""

from axes.handlers.proxy import AxesProxyHandler
from django.conf import settings
from django.contrib.auth import authenticate
from django.contrib.auth.models import User
from django.http import HttpRequest
from django.shortcuts import get_object_or_404
from django.utils import timezone
from rest_framework import generics, status
from rest_framework.exceptions import APIException, AuthenticationFailed
from rest_framework.permissions import AllowAny
from rest_framework.request import Request
from rest_framework.response import Response

from api.models import ApiToken, ApiTokenQuerySet
from api.schema import operation
from api.security import client_address
from api.serializers.tokens import NewTokenOutput, SignInInput, TokenOutput
from api.tokens import TokenAuthentication, issue_token, revoke_token
from api.views.finding import signed_in


class LockedOut(APIException):
    """Too many wrong passwords for one name from one address."""

    status_code = status.HTTP_429_TOO_MANY_REQUESTS
    default_code = "locked_out"

    def __init__(self) -> None:
        self.wait = settings.AXES_COOLOFF_TIME * 3600  # seconds
        super().__init__(
            f"Too many wrong passwords for this name. Wait {self.wait / 60:.0f} minutes."
        )


class NameAndPassword(TokenAuthentication):
    """Look at neither token nor session: name and password are in the body."""

    def authenticate(self, request: Request) -> None:
        return None


class Tokens(generics.ListAPIView[ApiToken]):
    """One's own tokens, and the way to a new one."""

    serializer_class = TokenOutput
    filter_backends = ()

    def get_queryset(self) -> ApiTokenQuerySet:
        """Return the tokens of the person who asks."""
        return ApiToken.objects.visible_to(self.request.user)

    def initialize_request(self, request: HttpRequest, *args: object, **kwargs: object) -> Request:
        """Ask for nothing but name and password where a token is to be made."""
        if request.method == "POST":
            self.authentication_classes = (NameAndPassword,)
            self.permission_classes = (AllowAny,)
        return super().initialize_request(request, *args, **kwargs)

    @operation("Your tokens, the newest first", answer=TokenOutput(many=True))
    def get(self, request: Request) -> Response:
        return self.list(request)

    @operation(
        "Sign in with name and password for a token",
        takes=SignInInput,
        answer=NewTokenOutput,
        status=201,
        refusals=(401, 429),
        auth=[],
        words="The token is shown this once. Send it with every request, in the header"
        " `Authorization: Bearer ...`. It opens what its person may see and, unless `reads_only`,"
        " do, until it expires, is revoked, or the person takes another password.",
    )
    def post(self, request: Request) -> Response:
        wanted = SignInInput(data=request.data)
        wanted.is_valid(raise_exception=True)
        fields = wanted.validated_data
        user = person_with(request._request, fields["username"], fields["password"])
        token, text = issue_token(
            by=user,
            name=fields["name"],
            days=fields["days"],
            reads_only=fields["reads_only"],
            at=timezone.now(),
        )
        shown = {**TokenOutput(token).data, "token": text}
        return Response(
            shown, status=status.HTTP_201_CREATED, headers={"Cache-Control": "no-store"}
        )


class Token(generics.GenericAPIView[ApiToken]):
    """One of one's own tokens."""

    serializer_class = TokenOutput

    @operation("Revoke a token", answer=None, status=204)
    def delete(self, request: Request, key_id: str) -> Response:
        token = get_object_or_404(ApiToken.objects.visible_to(signed_in(request)), key_id=key_id)
        revoke_token(token=token, at=timezone.now())
        return Response(status=status.HTTP_204_NO_CONTENT)


def person_with(request: HttpRequest, username: str, password: str) -> User:
    """Return the person whose name and password these are.

    Raises
    ------
    AuthenticationFailed, LockedOut
        They are nobody's; or they were wrong too often.
    """
    user = authenticate(request, username=username, password=password)
    if getattr(request, "axes_locked_out", False):
        request.axes_locked_out = False  # type: ignore[attr-defined]  # else a page is answered
        raise LockedOut
    if not isinstance(user, User):
        raise AuthenticationFailed("This name and password do not belong together.")
    AxesProxyHandler.reset_attempts(username=username, ip_address=client_address(request))
    return user
