"""What can be recorded of a job, and the words for it."""

from enum import StrEnum


class Thing(StrEnum):
    VEHICLE = "vehicle"
    BUILDING = "building"


class Moment(StrEnum):
    """Until when something must be recorded. What is due before a key is made is due before the finish as well."""

    BEFORE_KEY = "before_key"
    BEFORE_FINISH = "before_finish"


class Paper(StrEnum):
    WORK_ORDER = "work_order"
    INVOICE = "invoice"
    RECEIPT = "receipt"


class Way(StrEnum):
    """How a request of an authority is answered."""

    POST = "post"
    ELECTRONIC = "electronic"


class Relationship(StrEnum):
    """What the person who asks is to the thing."""

    OWNER = "owner"
    LESSEE = "lessee"
    AGENT = "agent"
    POLICE = "police"
    LENDER = "lender"
    INSURER = "insurer"
    DEALER = "dealer"
    PROPERTY_MANAGER = "property_manager"


class Papers(StrEnum):
    """Papers that can show that somebody is entitled."""

    REGISTRATION = "registration"
    TITLE = "title"
    LEASE = "lease"
    LETTER = "letter"
    ORDER = "order"
    INSURANCE = "insurance"
    SALE = "sale"
    OTHER = "other"


class Fact(StrEnum):
    """One thing that a rule can ask for."""

    NAME = "name"
    ADDRESS = "address"
    PHONE = "phone"
    BORN_ON = "born_on"
    DOCUMENT_KIND = "document_kind"
    DOCUMENT_NUMBER = "document_number"
    RELATIONSHIP = "relationship"
    PAPERS = "papers"
    VEHICLE_ID = "vehicle_id"
    VIN = "vin"
    VIN_MATCH = "vin_match"
    PLACE = "place"
    LOCK_TYPE = "lock_type"
    KEY_NOT_MARKED = "key_not_marked"
    SIGNATURE = "signature"
    CONFIRMED_HOW = "confirmed_how"
    SERVED_ON = "served_on"
    LOCKSMITH = "locksmith"
    LOCKSMITH_LICENCE = "locksmith_licence"
    SHOP_LICENCE = "shop_licence"
    PRICE_TOLD = "price_told"
    PRICE_PAID = "price_paid"


# Kept sealed; a paper shows them only where its rule says so.
GUARDED_FACTS = frozenset({Fact.BORN_ON, Fact.DOCUMENT_NUMBER, Fact.SIGNATURE})

# Written down by the check of who asks; the rest stands on the job, the shop or the bill.
CHECK_FACTS = frozenset(
    {
        Fact.NAME,
        Fact.ADDRESS,
        Fact.PHONE,
        Fact.BORN_ON,
        Fact.DOCUMENT_KIND,
        Fact.DOCUMENT_NUMBER,
        Fact.RELATIONSHIP,
        Fact.PAPERS,
        Fact.VEHICLE_ID,
        Fact.VIN,
        Fact.VIN_MATCH,
        Fact.LOCK_TYPE,
        Fact.KEY_NOT_MARKED,
        Fact.SIGNATURE,
        Fact.CONFIRMED_HOW,
    }
)

FACT_WORDS: dict[Fact, str] = {
    Fact.NAME: "Name of who asks",
    Fact.ADDRESS: "Address of who asks",
    Fact.PHONE: "Telephone of who asks",
    Fact.BORN_ON: "Date of birth",
    Fact.DOCUMENT_KIND: "Identity document shown",
    Fact.DOCUMENT_NUMBER: "Number of the identity document",
    Fact.RELATIONSHIP: "What makes them entitled",
    Fact.PAPERS: "Papers seen",
    Fact.VEHICLE_ID: "Plate or VIN of the vehicle",
    Fact.VIN: "VIN",
    Fact.VIN_MATCH: "VIN on the car compared",
    Fact.PLACE: "Address of the service",
    Fact.LOCK_TYPE: "Type of lock serviced",
    Fact.KEY_NOT_MARKED: "Key carries no “do not duplicate”",
    Fact.SIGNATURE: "Signature of who asks",
    Fact.CONFIRMED_HOW: "How identity was confirmed",
    Fact.SERVED_ON: "Date of service",
    Fact.LOCKSMITH: "Name of the locksmith",
    Fact.LOCKSMITH_LICENCE: "Licence number of the locksmith",
    Fact.SHOP_LICENCE: "Licence number of the shop",
    Fact.PRICE_TOLD: "Price told",
    Fact.PRICE_PAID: "Price paid",
}

LACK_WORDS: dict[Fact, str] = {
    Fact.NAME: "Who is asking is not recorded.",
    Fact.ADDRESS: "The address of who asks is not recorded.",
    Fact.PHONE: "The telephone number of who asks is not recorded.",
    Fact.BORN_ON: "The date of birth is not recorded.",
    Fact.DOCUMENT_KIND: "No identity document was shown.",
    Fact.DOCUMENT_NUMBER: "The number of the identity document is not recorded.",
    Fact.RELATIONSHIP: "What makes this person entitled is not recorded.",
    Fact.PAPERS: "No paper was seen that shows it.",
    Fact.VEHICLE_ID: "Neither plate nor VIN of the vehicle is recorded.",
    Fact.VIN: "The VIN is not recorded.",
    Fact.VIN_MATCH: "The VIN on the car is not read.",
    Fact.PLACE: "The address of the service is not recorded.",
    Fact.LOCK_TYPE: "The type of lock is not recorded.",
    Fact.KEY_NOT_MARKED: "Nobody has looked whether the key is marked “do not duplicate”.",
    Fact.SIGNATURE: "There is no signature.",
    Fact.CONFIRMED_HOW: "How identity was confirmed is not recorded.",
    Fact.SERVED_ON: "The date of service is not recorded.",
    Fact.LOCKSMITH: "No technician is recorded.",
    Fact.LOCKSMITH_LICENCE: "The technician has no licence number. The owner adds it under Shop, people.",
    Fact.SHOP_LICENCE: "The shop has no licence number. The owner adds it under Shop, settings.",
    Fact.PRICE_TOLD: "No price was told and accepted.",
    Fact.PRICE_PAID: "No price paid is recorded.",
}

RELATIONSHIP_WORDS: dict[Relationship, str] = {
    Relationship.OWNER: "Owner",
    Relationship.LESSEE: "Lessee",
    Relationship.AGENT: "Agent with a letter",
    Relationship.POLICE: "Police",
    Relationship.LENDER: "Lender with an order",
    Relationship.INSURER: "Insurer",
    Relationship.DEALER: "Dealer",
    Relationship.PROPERTY_MANAGER: "Property manager",
}

PAPERS_WORDS: dict[Papers, str] = {
    Papers.REGISTRATION: "Registration",
    Papers.TITLE: "Title or deed",
    Papers.LEASE: "Lease",
    Papers.LETTER: "Letter of the owner",
    Papers.ORDER: "Order",
    Papers.INSURANCE: "Insurance paper",
    Papers.SALE: "Bill of sale",
    Papers.OTHER: "Something else",
}

# A relationship that rests on one paper, and the words when that paper was not seen.
RESTS_ON: dict[Relationship, tuple[Papers, str]] = {
    Relationship.AGENT: (Papers.LETTER, "An agent shows a letter of the owner; none was seen."),
    Relationship.LENDER: (Papers.ORDER, "A lender shows an order; none was seen."),
}
