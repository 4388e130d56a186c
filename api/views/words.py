"""The languages and words of your shops: what search reads as which, and what is misspelt."""

from django.shortcuts import get_object_or_404
from rest_framework import status
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.schema import operation
from api.serializers.documents import as_json, read_document
from api.serializers.words import (
    Languages,
    NewWord,
    SpellingInput,
    SpellingShown,
    WordShown,
    WordsShown,
)
from api.views.finding import signed_in, the_shop
from cases.models import Shop
from cases.services.words import add_word, remove_word, set_languages, words_in_doubt


class Words(APIView):
    """The languages and words of one of your shops."""

    @operation("The languages and words of one of your shops", answer=WordsShown)
    def get(self, request: Request, slug: str) -> Response:
        return Response(_shown(the_shop(request, slug)))

    @operation(
        "Say in which languages a shop writes",
        takes=Languages,
        answer=WordsShown,
        words="The trade's words of these languages count in its cases and in what its people ask."
        " Its cases are read anew in the background.",
    )
    def put(self, request: Request, slug: str) -> Response:
        shop = the_shop(request, slug)
        wanted = read_document(Languages, request.data).languages
        return Response(_shown(set_languages(shop=shop, languages=wanted, by=signed_in(request))))

    @operation(
        "Let search take one word for another in one of your shops",
        takes=NewWord,
        answer=WordShown,
        status=201,
    )
    def post(self, request: Request, slug: str) -> Response:
        shop = the_shop(request, slug)
        wanted = read_document(NewWord, request.data)
        word = add_word(
            shop=shop,
            language=wanted.language,
            said=wanted.said,
            kept=wanted.kept,
            by=signed_in(request),
        )
        return Response(as_json(WordShown.model_validate(word)), status=status.HTTP_201_CREATED)


class OneWord(APIView):
    """One word of one of your shops."""

    @operation("Take a word off the list", answer=None, status=204)
    def delete(self, request: Request, slug: str, pk: int) -> Response:
        word = get_object_or_404(the_shop(request, slug).words.select_related("shop"), pk=pk)
        remove_word(word=word, by=signed_in(request))
        return Response(status=status.HTTP_204_NO_CONTENT)


class Spelling(APIView):
    """Words of a text that may be misspelt."""

    post_reads = True

    @operation(
        "Words of a text that may be misspelt, with what may have been meant",
        takes=SpellingInput,
        answer=SpellingShown,
        words="By the trade's words in the languages of your shops and by the shops' own. Nothing"
        " is kept of the text, and nothing in it is changed: ask whoever wrote it.",
    )
    def post(self, request: Request) -> Response:
        text = read_document(SpellingInput, request.data).text
        in_doubt = words_in_doubt(text=text, by=signed_in(request))
        return Response(as_json(SpellingShown(in_doubt=in_doubt)))


def _shown(shop: Shop) -> object:
    words = tuple(map(WordShown.model_validate, shop.words.all()))
    return as_json(WordsShown(languages=tuple(shop.languages), words=words))
