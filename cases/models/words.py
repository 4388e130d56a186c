"""What a shop's people say, and the word that search keeps for it."""

from django.contrib.auth.models import AnonymousUser, User
from django.db import models
from django.db.models import Q

from cases.models.shops import Membership, Shop

LONGEST_WORD = 60


class ShopWordQuerySet(models.QuerySet["ShopWord"]):
    """Words, scoped by who asks: a shop's own list is nobody else's."""

    def visible_to(self, user: User | AnonymousUser) -> "ShopWordQuerySet":
        if not user.is_authenticated:
            return self.none()
        return self.filter(shop__in=Membership.objects.filter(user=user).values("shop"))


class ShopWord(models.Model):
    """One word as it is said in a shop, in a language, and the one that is kept for it."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="words")
    language = models.CharField(max_length=8)
    said = models.CharField(max_length=LONGEST_WORD)
    kept = models.CharField(max_length=LONGEST_WORD)

    objects = ShopWordQuerySet.as_manager()

    class Meta:
        ordering = ("shop", "said")
        constraints = (
            models.UniqueConstraint(fields=("shop", "said"), name="a_word_once_in_a_shop"),
            models.CheckConstraint(condition=~Q(said="") & ~Q(kept=""), name="words_not_empty"),
        )

    def __str__(self) -> str:
        return f"{self.said} is {self.kept}"
