"""Addresses of families, variants, procedures, and of what is known at once."""

from django.urls import path

from vehicles.views import families, know_files, known, procedures, proposals, variants

know_patterns = [
    path("vehicles", families.families, name="families"),
    path("vehicles/known", known.known, name="known"),
    path("vehicles/proposals", proposals.proposals, name="proposals"),
    path("vehicles/proposals/<int:version_id>", proposals.decide, name="decide"),
    path("vehicles/families/add", families.add, name="add_family"),
    path("vehicles/families/import", know_files.bring_in, name="import_families"),
    path("vehicles/families.json", know_files.export, name="export_families"),
    path("vehicles/families/<int:family_id>", families.family, name="family"),
    path("vehicles/families/<int:family_id>/change", families.change, name="change_family"),
    path("vehicles/families/<int:family_id>/off", families.switch, {"on": False}, name="family_off"),
    path("vehicles/families/<int:family_id>/on", families.switch, {"on": True}, name="family_on"),
    path("vehicles/families/<int:family_id>/variants/add", variants.add, name="add_variant"),
    path("vehicles/families/<int:family_id>/procedures/add", procedures.add, name="add_procedure"),
    path("vehicles/variants/<int:variant_id>/change", variants.change, name="change_variant"),
    path("vehicles/variants/<int:variant_id>/off", variants.switch, {"on": False}, name="variant_off"),
    path("vehicles/variants/<int:variant_id>/on", variants.switch, {"on": True}, name="variant_on"),
    path("vehicles/variants/<int:variant_id>/photo", variants.photo, name="variant_photo"),
    path("vehicles/procedures/<int:procedure_id>", procedures.procedure, name="procedure"),
    path("vehicles/procedures/<int:procedure_id>/compare", procedures.compare, name="compare_versions"),
    path("vehicles/procedures/<int:procedure_id>/propose", procedures.propose, name="propose_version"),
    path("vehicles/<int:vehicle_id>/family", known.choose_family, name="choose_family"),
]
