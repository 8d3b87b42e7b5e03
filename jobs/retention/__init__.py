"""What jobs delete, keep and tell, for the night and for erasing a customer."""

from jobs.actions.erasures import due_to_erase, go_on_erasing
from jobs.retention import customer
from jobs.retention.sweeps import STEPS
from shop.keeping.rooms import Room, Step

ROOM = Room(
    steps=(*STEPS, Step("erasures", "Customers made anonymous", due_to_erase, go_on_erasing)),
    duties=customer.duties,
    data=customer.data,
    files=customer.files,
    erase=customer.erase,
)
