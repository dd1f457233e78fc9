# The same values twice, a number for a text, and a change by one who had seen the old value: no disagreement.
lap-a {"kind":"job","job":"J1","trailer":5312,"thickness":0.75,"unit":"in"}
lap-b {"kind":"job","job":"J1","trailer":"5312","thickness":"19.05 mm"}
lap-b saw lap-a
lap-b {"kind":"job","job":"J1","trailer":"5313"}
---
nothing else
