"""Tokens: what signing in takes, and what is shown of a token."""

from rest_framework import serializers

from api.models import LONGEST_NAME, ApiToken
from api.tokens import DEFAULT_DAYS, LONGEST_DAYS


class SignInInput(serializers.Serializer[None]):
    """Name and password of a person, and what the token is for."""

    username = serializers.CharField(max_length=150)
    password = serializers.CharField(
        max_length=1000, trim_whitespace=False, style={"input_type": "password"}
    )
    name = serializers.CharField(
        max_length=LONGEST_NAME,
        help_text="What the token is for, so that you know it again: 'bench laptop'.",
    )
    days = serializers.IntegerField(
        min_value=1,
        max_value=LONGEST_DAYS,
        default=DEFAULT_DAYS,
        help_text="After so many days the token opens nothing any more.",
    )
    reads_only = serializers.BooleanField(
        default=False, help_text="It opens what you may see, and changes nothing."
    )


class TokenOutput(serializers.ModelSerializer[ApiToken]):
    """A token as it is listed: everything but what opens the door."""

    id = serializers.CharField(
        source="key_id", read_only=True, help_text="The middle part of the token."
    )

    class Meta:
        model = ApiToken
        fields: tuple[str, ...] = (
            "id",
            "name",
            "reads_only",
            "created_at",
            "expires_at",
            "last_used_at",
            "revoked_at",
        )
        read_only_fields = fields


class NewTokenOutput(TokenOutput):
    """A token at the only moment at which all of it is shown."""

    token = serializers.CharField(
        read_only=True, help_text="Send it as 'Authorization: Bearer ...'. It is shown this once."
    )

    class Meta(TokenOutput.Meta):
        fields = (*TokenOutput.Meta.fields, "token")
