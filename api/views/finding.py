"""Find the thing that an address names, among those that this person may see."""

from django.contrib.auth.models import User
from django.shortcuts import get_object_or_404
from rest_framework.exceptions import NotAuthenticated
from rest_framework.request import Request

from api.errors import BadFields, Problem
from cases.models import Case, Shop
from circuits.errors import UnknownCircuit
from circuits.models import Circuit, Revision
from circuits.services import circuit_by_key, latest_revision


def signed_in(request: Request) -> User:
    """Return the person who asks; the permissions have made sure that there is one."""
    if not isinstance(request.user, User):
        raise NotAuthenticated()
    return request.user


def the_revision(circuit: Circuit, number: int | None = None) -> Revision:
    """Return a revision of a circuit, the newest where no number is named."""
    if number is None:
        return latest_revision(circuit)
    return get_object_or_404(circuit.revisions.select_related("circuit"), number=number)


def newest_revision_named(key: str, field: str) -> Revision:
    """Return the newest revision of the circuit that a field of the body names."""
    try:
        return latest_revision(circuit_by_key(key))
    except UnknownCircuit as error:
        raise BadFields([Problem(field=field, detail=str(error))]) from None


def the_case(request: Request, pk: int) -> Case:
    """Return a case that this person may see."""
    return get_object_or_404(Case.objects.visible_to(signed_in(request)).with_facts(), pk=pk)


def the_shop(request: Request, slug: str) -> Shop:
    """Return one of this person's shops."""
    return get_object_or_404(Shop.objects.visible_to(signed_in(request)), slug=slug)


def shop_named(request: Request, slug: str, field: str) -> Shop:
    """Return the shop of this person's that a field of the body names."""
    own = Shop.objects.visible_to(signed_in(request))
    shop = own.filter(slug=slug).first()
    if shop is None:
        slugs = ", ".join(own.values_list("slug", flat=True)) or "none"
        raise BadFields(
            [Problem(field=field, detail=f"That is no shop of yours; you have {slugs}.")]
        )
    return shop
