"""Your shops, their people and their vehicles."""

from typing import Any

from django.contrib.auth.models import User
from django.db.models import Prefetch, QuerySet
from django.shortcuts import get_object_or_404
from django.utils import timezone
from django_filters import rest_framework as filters
from rest_framework import generics, status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.reverse import reverse
from rest_framework.views import APIView

from api.errors import BadFields, Problem
from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.shops import (
    HoldDays,
    MemberInput,
    MemberShown,
    MembersShown,
    NewShop,
    ShopShown,
    VehicleShown,
)
from api.views.finding import signed_in, the_shop
from cases.models import Case, Shop, Vehicle
from cases.services import shops as services


class Shops(generics.ListAPIView[Shop]):
    """The shops you belong to."""

    queryset = Shop.objects.none()
    filter_backends = ()

    def get_queryset(self) -> QuerySet[Shop]:
        """Return this person's shops."""
        return Shop.objects.visible_to(signed_in(self.request))

    @operation("Your shops", answer=ShopShown)
    def get(self, request: Request) -> Response:
        page = self.paginate_queryset(self.get_queryset())
        return self.get_paginated_response([ShopShown.of(shop) for shop in page or ()])

    @operation("Open a shop; you are its first owner", takes=NewShop, answer=ShopShown, status=201)
    def post(self, request: Request) -> Response:
        wanted = read_document(NewShop, request.data)
        shop = services.open_shop(
            name=wanted.name, slug=wanted.slug, by=signed_in(request), at=timezone.now()
        )
        return Response(
            ShopShown.of(shop),
            status=status.HTTP_201_CREATED,
            headers={"Location": reverse("rest:shop", args=(shop.slug,), request=request)},
        )


class OneShop(APIView):
    """One of your shops."""

    @operation("One of your shops", answer=ShopShown)
    def get(self, request: Request, slug: str) -> Response:
        return Response(ShopShown.of(the_shop(request, slug)))

    @operation(
        "Set the period after which a verified repair counts as held",
        takes=HoldDays,
        answer=ShopShown,
    )
    def put(self, request: Request, slug: str) -> Response:
        shop = the_shop(request, slug)
        days = read_document(HoldDays, request.data).hold_days
        return Response(
            ShopShown.of(services.set_hold_days(shop=shop, days=days, by=signed_in(request)))
        )


class Members(APIView):
    """The people of one of your shops."""

    @operation("The people of one of your shops", answer=MembersShown)
    def get(self, request: Request, slug: str) -> Response:
        memberships = the_shop(request, slug).memberships.select_related("user")
        members = tuple(map(MemberShown.model_validate, memberships))
        return Response(as_json(MembersShown(members=members)))


class Member(APIView):
    """One person of one of your shops."""

    @operation(
        "Take a person into a shop, or give them another role",
        takes=MemberInput,
        answer=MemberShown,
    )
    def put(self, request: Request, slug: str, username: str) -> Response:
        shop = the_shop(request, slug)
        role = read_document(MemberInput, request.data).role
        person = User.objects.filter(username=username, is_active=True).first()
        if person is None:
            raise BadFields(
                [Problem(field="username", detail=f"There is nobody called {username} here.")]
            )
        membership = services.add_member(
            shop=shop, user=person, role=role, by=signed_in(request), at=timezone.now()
        )
        return Response(MemberShown.of(membership))

    @operation("Take a person out of a shop; what they logged stays", answer=None, status=204)
    def delete(self, request: Request, slug: str, username: str) -> Response:
        shop = the_shop(request, slug)
        membership = get_object_or_404(
            shop.memberships.select_related("user"), user__username=username
        )
        services.remove_member(shop=shop, user=membership.user, by=signed_in(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


class VehicleFilters(filters.FilterSet):
    """What vehicles can be looked up by."""

    shop = filters.CharFilter(field_name="shop__slug", help_text="Short name of a shop of yours.")
    make = filters.CharFilter(lookup_expr="iexact")
    model = filters.CharFilter(lookup_expr="iexact")
    plate = filters.CharFilter(lookup_expr="iexact")
    vin = filters.CharFilter(lookup_expr="iexact")


class Vehicles(generics.ListAPIView[Vehicle]):
    """The vehicles of your shops; plate and VIN stay there."""

    queryset = Vehicle.objects.none()
    filterset_class = VehicleFilters

    def get_queryset(self) -> QuerySet[Vehicle]:
        """Return the vehicles of this person's shops."""
        return own_vehicles(signed_in(self.request))

    @operation("The vehicles of your shops", answer=VehicleShown)
    def get(self, request: Request) -> Response:
        page = self.paginate_queryset(self.filter_queryset(self.get_queryset()))
        return self.get_paginated_response([_vehicle(vehicle) for vehicle in page or ()])


class OneVehicle(APIView):
    """A vehicle of one of your shops."""

    @operation("A vehicle of one of your shops", answer=VehicleShown)
    def get(self, request: Request, pk: int) -> Response:
        return Response(_vehicle(get_object_or_404(own_vehicles(signed_in(request)), pk=pk)))


def own_vehicles(user: User) -> QuerySet[Vehicle]:
    """Return the vehicles of this person's shops, with the cases that each had there."""
    cases = Prefetch("cases", queryset=Case.objects.visible_to(user).only("pk", "vehicle_id"))
    own = Vehicle.objects.filter(shop__in=Shop.objects.visible_to(user))
    return own.select_related("shop").prefetch_related(cases)


def _vehicle(vehicle: Vehicle) -> dict[str, Any]:
    return VehicleShown.of(vehicle)
