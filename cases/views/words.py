"""The words that a shop's people use, and what search keeps for them."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_POST

from cases.forms.words import WordForm
from cases.models import ShopWord
from cases.services.words import add_word, remove_word
from cases.views.common import problems_of, refusals_at, signed_in


@login_required
@require_http_methods(["GET", "HEAD", "POST"])
def word_list(request: HttpRequest) -> HttpResponse:
    """List the words of this person's shops, and take a new one."""
    user = signed_in(request)
    form = WordForm(user, request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_at(form):
            add_word(**form.cleaned_data, by=user)
        if form.is_valid():
            return redirect("cases:words")
    words = ShopWord.objects.visible_to(user).select_related("shop")
    problems = problems_of(form) if form.is_bound else []
    context = {"here": "search", "form": form, "words": words, "problems": problems}
    return render(request, "cases/words.html", context, status=422 if problems else 200)


@login_required
@require_POST
def remove(request: HttpRequest, pk: int) -> HttpResponse:
    """Take a word off the list."""
    user = signed_in(request)
    remove_word(word=get_object_or_404(ShopWord.objects.visible_to(user), pk=pk), by=user)
    return redirect("cases:words")
