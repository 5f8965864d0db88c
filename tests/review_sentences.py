"""Sentences as reviewers write them, invented: questions, findings and learning points that name nobody."""

SENTENCES = """
Was the call made in time?
Was the call to theatre made before the fall recovered?
Batch True
Batch False
Batch April
Strip Seven
Batch Two, Strip Eleven
Why was oxytocin increased at the second fall?
Oxytocin Increased During Concern
Escalation And Handover
Who answered first, and when?
Could The Senior Have Come Earlier?
Should we have called the senior earlier?
Did the team see the loss of variability?
Did Anybody Look At The Toco?
Is the maternal rate recorded in the second stage?
Check the scalp electrode next time.
Next Time: Scalp Electrode First
Loss Of Signal In The Last Half Hour
Loss of signal in the last half hour, 40 % hidden.
Good example of early recognition.
Good Example Of Early Recognition
Repeat the fetal blood sample after 30 minutes.
Fetal Blood Sample Not Repeated
Decision to incision took 27 minutes.
Decision To Incision 27 Minutes
pH 7.08 in the artery and 7.21 in the vein.
Artery 7.08, Vein 7.21
Apgar 4/7/9, cooled? No.
Baseline rose from 135 to 160 bpm over two hours.
Baseline Rise Over Two Hours
Late decelerations with more than half of contractions.
Category II for ninety minutes without change.
Category II, Then III After Pushing Started
Suspicious for an hour: what was tried?
What Was Tried In The Meantime?
Turn to the left side, then a litre of Hartmann's.
Terbutaline given twice, 0.25 mg each.
Ask The Anaesthetist Before The Theatre Is Ready
Ask for help earlier; say it aloud.
Say It Aloud, Write It Down
Teaching point: stop oxytocin before calling.
Teaching Point: Stop Oxytocin Before Calling
Learning point - repeat reads agree poorly on variability.
The reads differ: three of five said normal.
Three Of Five Readers Said Normal
Handover at the change of shift was not noted.
Night Shift, Handover Missing
Weekend Cover Was Thin
Staffing: two midwives for five women.
Two Midwives For Five Women
Bring the protocol for tachysystole.
Bring Protocol For Tachysystole
Tachysystole After Prostaglandin, Six In Ten Minutes
The guideline does not say what to do here.
Guideline Unclear Here
Discuss with the neonatal team.
Discuss With Neonatal Team
Was a second opinion asked for?
Second Opinion Asked For?
Which clock counts: first act or escalation?
Which Clock Counts, First Act Or Escalation?
Cord gases missing; sampler broken.
Cord Gases Missing
Equipment: Toco Belt Slipped
Toco belt slipped during the epidural.
Epidural, Then Hypotension, Then A Prolonged Fall
Hypotension treated within four minutes.
Shoulder dystocia after a normal tracing.
Shoulder Dystocia, Normal Tracing
Meconium thick, no change of plan.
Thick Meconium, No Change Of Plan
Twin B was not monitored for twelve minutes.
Twin B Not Monitored
VBAC with a scar pain: why so long?
Scar Pain, Why So Long
Breech found in second stage.
Breech Found In Second Stage
Ventouse after two pulls, then forceps.
Ventouse, Two Pulls, Then Forceps
Sensor: External, Then Scalp
Maternal Pulse Mistaken For Fetal Rate
Maternal pulse mistaken for the fetal rate at the end.
Sinusoidal? Two readers thought so.
Sinusoidal Pattern Doubted
Bradycardia of nine minutes before birth.
Bradycardia, Nine Minutes
Clear decision, clear words, quick theatre.
Clear Decision, Quick Theatre
Praise the coordinator for the call.
Praise For Coordinator
Audit again in six months.
Audit Again In Six Months
Action: poster on intrauterine resuscitation.
Poster On Intrauterine Resuscitation
Simulation Training For Prolonged Falls
Add a prompt to the hourly review.
Hourly Review Not Written
Fresh eyes every hour were kept.
Fresh Eyes Kept Every Hour
Outcome good in spite of a pathological hour.
Outcome Good, Strip Pathological
Parity and gestation not given.
Gestation Not Given, Parity Not Given
Dose wrong by ten?
Dose Wrong By Ten?
Sepsis suspected late; antibiotics after two hours.
Sepsis Suspected Late
Reader R2 and R5 disagree on category.
NICE and FIGO disagree here.
FIGO Pathological, NICE Suspicious, NICHD II
Under NICHD category II, under NICE pathological.
Compare with case C12 and case 1042.
Window 3 read twice with another answer.
Late by 12 minutes under 3 of 5 clocks.
Response at 42 min, target 15 min.
CTG lost for 20 min while turning.
Induction with a balloon, then oxytocin at 4 mu/min.
No one could say who was told.
Nobody Could Say Who Was Told
Everyone thought somebody else had called.
Plan Agreed, Not Carried Out
Thanks To All Who Read
More Reads Needed For March
March and April together show the same.
Same Again As In March
May we stop sooner? May be.
See also the strip before it.
Before And After The Epidural
Communication With The Woman Was Good
Woman was told what we saw and why.
Consent For Forceps Discussed
Home soon after; no follow up needed.
Blood loss 900 ml, unrelated.
Interpreter Needed And Not Called
Theatre Busy With Another Case
Lift Out Of Order
Paper Ran Out At The Worst Moment
Clock Of The Recorder Ten Minutes Ahead
True Late, Not Variable
False Reassurance From Accelerations
Really Reactive?
Mostly Fine
Very Instructive
Quick And Calm
Too Little, Too Late
Better Than Last Month
Worth Showing
Keep For Teaching
Not For Teaching
To Be Continued
Ready By Friday
Follow Up On Monday
""".strip().splitlines()

NAMING = """
Was Tessa told?
Was Marlow told before theatre?
Tell Brenova that the read was right.
Why did Dr Quill wait?
Discuss with Sister Odell.
The husband, Ivo, asked twice.
Quill, Tessa: read again.
Case of Brenova on the night shift.
J. Marlow decided late.
Marlow J. decided late.
Thank Odette for the call.
Call Ivo Brenova about the poster.
Poster by Tessa Quill
Born 14.03.2031 at 04:12
On 3 March the team met.
Ring 01234 567890 for the tape.
Mail tessa.quill@example.org
MRN 4482913
lives in Oakbridge Lane 4
12 Oakbridge Lane
Midwife Odell noticed it first.
Registrar Marlow came at once.
Mrs Brenova asked for it.
tessa_quill wrote this
The mother, Ines Valtari, agreed.
Ask Nurse Ketteridge.
Follow up with Ketteridge on Monday.
Praise Valtari for the call.
Odell and Marlow disagree.
Seen by Ketteridge, then Odell.
""".strip().splitlines()
