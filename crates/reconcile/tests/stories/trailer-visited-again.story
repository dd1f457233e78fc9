# A second visit after the first was signed off, or stood down, is an ordinary second visit.
lap-a {"kind":"job","job":"J1","trailer":"5312"}
lap-a {"kind":"sign-off","job":"J1"}
lap-b saw lap-a
lap-b {"kind":"job","job":"J2","trailer":"5312"}
lap-b {"kind":"stand-down","job":"J2"}
lap-b {"kind":"job","job":"J3","trailer":"5312"}
---
not trailer-opened-twice
+++
# A wrong unit number that was corrected: the job is not on that trailer.
lap-c {"kind":"job","job":"J5","trailer":"5312"}
lap-c {"kind":"job","job":"J5","trailer":"5321"}
---
not trailer-opened-twice
