from django.urls import path

from shop.stock.views import items, movements, places, van

app_name = "stock"
urlpatterns = [
    path("stock", items.items, name="items"),
    path("stock/add", items.add, name="add_item"),
    path("stock/<int:pk>", items.item, name="item"),
    path("stock/<int:pk>/change", items.change, name="change_item"),
    path("stock/<int:pk>/receive", movements.receive, name="receive"),
    path("stock/<int:pk>/move", movements.move, name="move"),
    path("stock/<int:pk>/count", movements.count, name="count"),
    path("stock/<int:pk>/spoil", movements.spoil, name="spoil"),
    path("stock/places", places.places, name="places"),
    path("stock/places/add", places.add_place, name="add_place"),
    path("stock/places/<int:pk>", places.change_place, name="change_place"),
    path("stock/suppliers", places.suppliers, name="suppliers"),
    path("stock/suppliers/add", places.add_supplier, name="add_supplier"),
    path("stock/suppliers/<int:pk>", places.change_supplier, name="change_supplier"),
    path("van", van.van, name="van"),
    path("van/<int:item_id>/count", van.count_van, name="count_van"),
]
