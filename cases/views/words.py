"""The languages and words that a shop's people use, and what search keeps for them."""

from django.contrib.auth.decorators import login_required
from django.forms import Form
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from cases.forms.words import LanguagesForm, WordForm
from cases.models import Shop, ShopWord
from cases.services.words import add_word, remove_word, set_languages, words_in_doubt
from cases.views.common import problems_of, refusals_at, signed_in


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def word_list(request: HttpRequest) -> HttpResponse:
    """List the words of this person's shops, and take a new one."""
    user = signed_in(request)
    form, languages = WordForm(user, request.POST or None), LanguagesForm(user)
    if request.method == "POST" and form.is_valid():
        with refusals_at(form):
            add_word(**form.cleaned_data, by=user)
        if form.is_valid():
            return redirect("cases:words")
    return _word_page(request, form, languages, form)


@login_required
@require_POST
def languages(request: HttpRequest) -> HttpResponse:
    """Say in which languages a shop writes."""
    user = signed_in(request)
    form = LanguagesForm(user, request.POST)
    if form.is_valid():
        with refusals_at(form):
            set_languages(**form.cleaned_data, by=user)
        if form.is_valid():
            return redirect("cases:words")
    return _word_page(request, WordForm(user), form, form)


def _word_page(
    request: HttpRequest, form: WordForm, languages: LanguagesForm, sent: Form
) -> HttpResponse:
    user = signed_in(request)
    problems = problems_of(sent) if sent.is_bound else []
    context = {
        "here": "search",
        "form": form,
        "languages": languages,
        "shops": Shop.objects.visible_to(user),
        "words": ShopWord.objects.visible_to(user).select_related("shop"),
        "problems": problems,
    }
    return render(request, "cases/words.html", context, status=422 if problems else 200)


@login_required
@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a word off the list."""
    user = signed_in(request)
    remove_word(word=get_object_or_404(ShopWord.objects.visible_to(user), pk=pk), by=user)
    return redirect("cases:words")


@login_required
@require_POST
def spelling(request: HttpRequest) -> HttpResponse:
    """Ask about words of a text that is being typed; nothing of it is kept."""
    field = request.POST.get("asks", "")
    in_doubt = words_in_doubt(text=request.POST.get(field, ""), by=signed_in(request))
    return render(request, "cases/parts/spelling.html", {"words": in_doubt.items(), "field": field})
