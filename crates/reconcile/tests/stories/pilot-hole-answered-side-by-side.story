# Two people answer for one pilot hole without knowing of each other: the one that says no counts, whichever log is merged first.
lap-a {"kind":"job","job":"J1","load":"empty","wall":"plate","trailer":"5312"}
lap-b {"kind":"check","job":"J1","check":"pilot-hole","ok":true}
lap-a {"kind":"check","job":"J1","check":"pilot-hole","ok":false}
---
pilot-hole-left-open J1 stop - open
J1 says pilot-hole was recorded as not ok
+++
lap-a {"kind":"job","job":"J2","load":"empty","wall":"plate","trailer":"5313"}
lap-a {"kind":"check","job":"J2","check":"pilot-hole","ok":true}
lap-b {"kind":"check","job":"J2","check":"pilot-hole","ok":false}
---
pilot-hole-left-open J2 stop - open
