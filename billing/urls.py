from django.urls import URLPattern, path

from billing.views import calls, new_price, price_book, take_call

app_name = "billing"
urlpatterns: list[URLPattern] = [
    path("calls", calls.calls, name="calls"),
    path("calls/new", take_call.take_call, name="take_call"),
    path("calls/<uuid:key>/keep", calls.keep_draft, name="keep_draft"),
    path("calls/<uuid:key>/throw-away", calls.throw_away, name="throw_away"),
    path("prices", price_book.price_book, name="price_book"),
    path("prices/items", price_book.find_item, name="find_item"),
    path("prices/taxes/<int:pk>/remove", price_book.remove_tax_rate, name="remove_tax_rate"),
    path("jobs/<int:number>/price", new_price.new_price, name="new_price"),
    path("jobs/<int:number>/price/<int:pk>/accept", new_price.accept, name="accept_price"),
]
