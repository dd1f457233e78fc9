# Sticks only: nobody ever measured a clock. lap-b's is a year ahead. What it recorded was seen by the depot before it shows: no time
# of it is certain, and the job is right.
the depot is known
depot {"kind":"note","text":"the day begins"}
lap-a saw depot
lap-b saw depot
clock lap-b +525600
lap-a {"kind":"link","job":"J1","camera":"C1","tracker":"T1"}
lap-b {"kind":"settings","tracker":"T1","state":"live"}
wait 3
lap-a {"kind":"sign-off","job":"J1"}
wait 60
depot saw lap-a
depot saw lap-b
depot {"kind":"note","text":"sticks read"}
---
signed-before-live J1 ask unaware open
clock-off lap-b note - open
lap-b says The clock of lap-b is at least 364 days 22 h ahead of the depot's: the depot had seen its entry 1 before the time that it shows (2027-03-02 08:03).
not clock-off lap-a
+++
# A year slow: what it had seen was written later than it shows.
clock lap-c -525600
lap-c saw depot
lap-c {"kind":"note","text":"the stick is read"}
---
clock-off lap-c note - open
lap-c says behind the depot's: its entry 1
lap-c says had seen what the depot wrote later
+++
# A minute too early is what a stick that waits for a while explains.
clock lap-d -1
lap-d saw depot
lap-d {"kind":"note","text":"the stick is read"}
---
not clock-off lap-d
+++
# A clock whose battery is dead begins where no clock of this trade can be.
clock lap-e -29000000
lap-e {"kind":"note","text":"1971"}
---
clock-off lap-e note - open
lap-e says Entry 1 of lap-e has a time that no clock can have shown then
+++
# A time of the device's clock that is later than its own recording was not read from it. What a person says may be anything.
lap-a {"kind":"note","text":"typed","at":"2026-03-02T23:00:00Z"}
lap-d {"kind":"note","text":"said","at":"2026-03-02T23:00:00Z","clock":"person"}
---
clock-off lap-a note - open
lap-a says later than its own recording
not clock-off lap-d
