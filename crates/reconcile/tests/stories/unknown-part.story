# The fleet has a list of cameras, and the linked one stands in none and is near none.
depot {"kind":"stock","camera":"LK-1000","fleet":"Larkspur Freight"}
lap-a {"kind":"job","job":"J1","trailer":"5312","fleet":"Larkspur freight"}
lap-a {"kind":"link","job":"J1","camera":"ZZ-7777","tracker":"T1"}
---
unknown-part ZZ-7777 ask - open jobs=J1
not code-suspect
not unknown-part T1
+++
# It is added to the list.
depot saw lap-a
depot {"kind":"stock","camera":"ZZ7777","fleet":"Larkspur Freight"}
---
unknown-part ZZ7777 ask - cleared
+++
# Near: one edit away is another rule's; in another fleet's list another's; a fleet without a list says nothing.
lap-a {"kind":"job","job":"J2","trailer":"5313","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J2","camera":"LK-1001","tracker":"T2"}
depot {"kind":"stock","camera":"HH-5000","fleet":"Harrow Haulage"}
lap-a {"kind":"job","job":"J3","trailer":"5314","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J3","camera":"HH-5000","tracker":"T3"}
lap-a {"kind":"job","job":"J4","trailer":"5315","fleet":"Tolland Hauliers"}
lap-a {"kind":"link","job":"J4","camera":"QQ-1234","tracker":"T4"}
---
not unknown-part LK-1001
code-suspect LK-1001 ask unaware open
not unknown-part HH-5000
wrong-fleet J3 stop unaware open
not unknown-part QQ-1234
+++
# A code that stands in the lists as a tracker, linked as a camera: there need be no list of cameras.
depot {"kind":"stock","tracker":"TT-4444","fleet":"Tolland Hauliers"}
lap-a saw depot
lap-a {"kind":"link","job":"J4","camera":"TT-4444","tracker":"T4","note":"mixed up"}
---
unknown-part TT-4444 ask aware open jobs=J4
+++
# A tracker in no list beside one that is listed; after an unlink nothing is linked that nobody knows.
depot {"kind":"stock","tracker":"TK-9001","fleet":"Larkspur Freight"}
lap-a {"kind":"job","job":"J5","trailer":"5316","fleet":"Larkspur Freight"}
lap-a {"kind":"link","job":"J5","camera":"LK-1000","tracker":"WW-3333"}
---
unknown-part WW-3333 ask - open jobs=J5
not unknown-part LK-1000
+++
lap-a saw depot
lap-a {"kind":"unlink","job":"J5","camera":"LK-1000","tracker":"WW-3333"}
---
unknown-part WW-3333 ask - cleared
