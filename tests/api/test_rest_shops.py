"""Shops, people and vehicles over REST: one's own, and nobody else's."""

import pytest

from cases.documents.cases import VehicleFacts
from cases.models import Membership, Shop
from tests.api.rest import program_of
from tests.cast import logged


def vehicle(number: int) -> VehicleFacts:
    return VehicleFacts(make="Tolvane", plate=f"TEST {number:03}")


@pytest.fixture
def owner(cast):
    return program_of(cast.owner)


def test_one_sees_ones_own_shops(technician, outsider, cast) -> None:
    assert [row["slug"] for row in technician.get("/api/shops/").data["results"]] == ["kestrel"]
    assert technician.get("/api/shops/kestrel/").data["hold_days"] == 90
    for address in ("/api/shops/kestrel/", "/api/shops/kestrel/members/"):
        assert outsider.get(address).status_code == 404


def test_who_opens_a_shop_is_its_owner(outsider, cast) -> None:
    answer = outsider.post("/api/shops/", {"name": "Corder Street Trailers"})
    members = outsider.get(f"{answer['Location']}members/").data["members"]

    assert answer.status_code == 201
    assert answer.data["slug"] == "corder-street-trailers"
    assert [(member["username"], member["role"]) for member in members] == [("oz", "owner")]


@pytest.mark.parametrize(
    ("body", "field"),
    [
        ({}, "name"),
        ({"name": ""}, "name"),
        ({"name": "!!!"}, "name"),
        ({"name": "Kestrel Lane Garage"}, "name"),
        ({"name": "x", "slug": "Not A Slug"}, "slug"),
        ({"name": "x" * 121}, "name"),
        ({"name": 5}, "name"),
    ],
)
def test_a_shop_that_cannot_be_opened_says_why(outsider, cast, body, field) -> None:
    answer = outsider.post("/api/shops/", body)

    assert answer.status_code == 400
    assert [error["field"] for error in answer.data["errors"]] == [field]
    assert Shop.objects.count() == 3


def test_a_slug_that_is_taken_is_refused(outsider, cast) -> None:
    answer = outsider.post("/api/shops/", {"name": "Another", "slug": "kestrel"})

    assert answer.status_code == 400
    assert Shop.objects.count() == 3


def test_an_owner_takes_people_in_and_out(owner, technician, cast) -> None:
    address = "/api/shops/kestrel/members/oz/"
    taken_in = owner.put(address, {"role": "trainer"})
    by_technician = technician.put(address, {"role": "owner"})
    taken_out = owner.delete(address)

    assert (taken_in.status_code, taken_in.data["role"]) == (200, "trainer")
    assert (by_technician.status_code, by_technician.data["code"]) == (403, "owners_only")
    assert taken_out.status_code == 204
    assert not Membership.objects.filter(user=cast.outsider, shop=cast.shop).exists()


def test_people_and_roles_that_are_not_there(owner, cast) -> None:
    nobody = owner.put("/api/shops/kestrel/members/nobody/", {"role": "owner"})
    no_role = owner.put("/api/shops/kestrel/members/oz/", {"role": "boss"})
    last_owner = owner.delete("/api/shops/kestrel/members/odile/")
    stranger = owner.delete("/api/shops/kestrel/members/oz/")

    assert [error["field"] for error in nobody.data["errors"]] == ["username"]
    assert [error["field"] for error in no_role.data["errors"]] == ["role"]
    assert [error["field"] for error in last_owner.data["errors"]] == ["role"]
    assert stranger.status_code == 404


@pytest.mark.parametrize("days", [0, 4000, 10**30, "soon", None])
def test_the_period_of_a_shop_has_bounds(owner, cast, days) -> None:
    answer = owner.put("/api/shops/kestrel/", {"hold_days": days})

    assert answer.status_code == 400
    assert [error["field"] for error in answer.data["errors"]] == ["hold_days"]


def test_the_period_of_a_shop_is_set_by_its_owner(owner, technician, cast) -> None:
    assert owner.put("/api/shops/kestrel/", {"hold_days": 30}).data["hold_days"] == 30
    assert technician.put("/api/shops/kestrel/", {"hold_days": 1}).status_code == 403


def test_vehicles_stay_in_their_shop(technician, outsider, cast, fuel_pump) -> None:
    case = logged(cast, fuel_pump)
    listed = technician.get("/api/vehicles/", {"plate": "test 042"}).data["results"]
    address = f"/api/vehicles/{case.vehicle_id}/"

    assert [(row["plate"], row["cases"]) for row in listed] == [("TEST 042", [case.pk])]
    assert technician.get(address).data["vin"] == "1G4AH59H45G118341"
    assert outsider.get("/api/vehicles/").data["count"] == 0
    assert outsider.get(address).status_code == 404


def test_a_list_of_vehicles_costs_the_same_queries_for_two_as_for_fifty(
    technician, cast, django_assert_num_queries
) -> None:
    for number in range(2):
        logged(cast, None, vehicle=vehicle(number))
    technician.get("/api/vehicles/")
    with django_assert_num_queries(4):  # token, count, vehicles with shop, cases
        assert technician.get("/api/vehicles/").data["count"] == 2
    for number in range(2, 50):
        logged(cast, None, vehicle=vehicle(number))
    with django_assert_num_queries(4):
        assert len(technician.get("/api/vehicles/").data["results"]) == 50
