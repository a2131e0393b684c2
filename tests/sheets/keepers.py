"""Who keeps each sheet and how: what a reader has to be told because the sheet does not say it."""

ARRIVALS = """
# 01-arrivals-ticks.csv
OV ticks this at the kitchen table while parcels are opened, one line a piece; saved as comma-separated UTF-8 with a
mark.
- An empty cell from Cracked? to Mould means: looked at, nothing found. It is an answer.
- In a line with the comment "still sealed, not opened yet" an empty cell is no answer.
- x, X = found. (x) = a little. ? = not sure. - = cannot be, for this format. The first seven lines say yes and no
  instead.
- The other way round: in "Batch no. present" *no* is the fault.
- Type says format and, for tubes, ml: half, full, tube 14.
- Days are day/month/year. A double quote means the same day as above.
- Arrived is also the day on which it was looked at. OV looked at everything; the sheet does not say so.
- The last line counts the plain crosses; it is no piece. Vardelune prints no batch numbers.
- "IMG_0412.jpg" in a comment is a photo's file name.
"""

WERKSTATT = """
# 02-werkstatt-noten.csv
A German workshop's list, saved by its spreadsheet as semicolon-separated cp1252 with decimal commas.
- "Note" is a school mark: 1 is best, 6 worst. 2+ is a third better than 2, 3- a third worse than 3, 2-3 halfway.
- Schaum (froth): kein, wenig, mäßig, stark; more is worse. Ergiebigkeit (how far it goes) is a school mark.
- Deckkraft (lasierend, halbdeckend, deckend) and Körnung (nein, leicht, ja, stark) are traits, neither good nor bad.
- n.g. or n. g. = nicht geprüft, not tested; empty cells in a line marked "noch nicht geprüft" too.
- Gebinde: Näpfchen = full pan, ½ Näpfchen or 1/2 Napf = half pan. "-" as Inhalt: a pan, not measured.
- Prices without a sign are euros; SFr. is Swiss francs, bought across the border.
- Days are day.month.year with two digits, all 2024 and 2025. One says only month and year.
- "keine" as Charge: none printed. Pigments come as PB29, PB 29 and PB-29.
- HB is a second tester.
"""

ESSAIS = """
# 03-essais-longs.csv
A French studio's list, one line a test, handed on as a spreadsheet's "Unicode text": UTF-16, tabs, decimal commas.
- "id." means: as in the line above (day and maker).
- Remouillage counts turns of the brush until it is charged: more is worse. "> 60" = not reached at 60.
- Mousse (froth): nulle, faible, moyenne, forte, très forte; more is worse. Bulles counts bubbles: more is worse.
- Granulation 0 to 5 in half steps is a trait, neither good nor bad.
- Pouvoir colorant is the share of what others of the colour reach: 1,00 = as strong as they, LESS is worse.
- n.e. = non essayé, not tested. s/n as Lot: none printed.
- "refait ... la 1re ligne ne compte pas": the earlier line of the same test and piece does not count.
- A piece is a maker, colour, form and lot; there are no numbers. godet = full pan, 1/2 godet = half pan.
- Contenance of a godet is what the maker says it holds.
- Days are day/month/year.
"""

GRID = """
# 04-grid-paints-across.xlsx
OV's grid for the wall: paints across, tests down, makers merged over their paints.
- One column is one piece. Row 1 is the title, rows 11, 16 and 22 are headings.
- Column B says how a row is marked: Cracked, Wrapper stuck and Tube dry use only 0, 1, 3 and 5, 5 worst.
- Froth and Weak: 0 best, 5 worst. Turns: more is worse.
- Grain and Stain are traits, neither good nor bad.
- Evenness runs the OTHER way: 10 is best.
- n/a = cannot be looked at in this format.
- The last column holds means; they are no piece.
- Comments on cells are remarks; "TL did this one" says that TL was the tester of that cell. All others are OV's.
- Bought is a day; the days of testing are not written down. Prices are pounds. 1/2 pan, half pan and hp are one
  format.
"""

SHELF = """
# 05-shelf-printed.xlsx
OV's list for printing and pinning up: titles, two rows of headings, again on every printed page, sums after each
maker.
- A maker stands once, merged over its lines or only in the first of them; the lines below belong to it.
- Rows with "page 1 of 3" and the repeated headings are no pieces, nor are "Trellmere: 11 paints" and GRAND TOTAL.
- Cracks and Stuck: yes is the fault. An empty cell: a tube, cannot be looked at.
- Rewets: easy, ok, hard; hard is worse. Grain 0 to 5 is a trait.
- Form "pan" is a full pan. Prices are euros by the cells' number format.
- The list says 30 September 2025; no line has a day of its own. OV looked at everything.
- Numbers in "No." are OV's own and never used twice.
- An empty Batch: not looked for, or none.
"""

LIGHTS = """
# 06-traffic-lights.xlsx
OV paints cells instead of writing marks; the key is a sheet of its own.
- Green fine, yellow so-so, red bad (light or dark red are the same). Bad is the fault, so-so half of one.
- Grey (a colour of the theme, a quarter darker than white) = cannot be looked at in this format.
- White = not looked at yet. It is NOT "fine".
- "!!" in a red cell only underlines it.
- Rows 15 and 29 are hidden: sent back unopened, to be left out. Columns E and L are hidden: an old score and what
  was paid, private.
- "full pan", "half pan" and "tube" are the formats; sizes are not written down.
- Seen is the day of looking, by OV.
- A comment on a remark belongs to it.
- The second sheet, Key, holds no pieces.
"""

STARS = """
# 07-stars.ods
OV's and TL's marks from club evenings, in whatever way suited the evening.
- Rewets: five stars are best, ½ is half a star; an empty star counts nothing. From No 21 on the same is marked out
  of ten (10 best).
- Flow is out of ten, 10 best, written 7/10, 7 / 10 or only 7.
- Strength: A best to E worst; B+ lies between A and B, B/C between B and C.
- Smooth: ++, +, o, -, --, from best to worst.
- ? = nobody gave a mark. A maker cut short with a point ("Alderv.") is that maker.
- Value and "Buy again?" are opinions on buying, not tests.
- Prices are pounds and pence: 345p = 3.45.
- OV+TL = both looked and agreed on one mark.
- "pan" is a full pan. There are no batch numbers.
"""

TWO_FORMATS = """
# 08-tube-and-pan.xlsx
OV's comparison of formats: one line a colour, then a block for the tube, one for the half pan, one for the dot card.
- A line with a filled tube block and a filled pan block is two pieces. An empty block: not bought.
- The headings Price, Batch, Opened, Rewet 0-5 and Froth 0-5 stand once in each block and belong to its format.
- Marks 0-5: 0 best, 5 worst. Dry? and Leaks?: y is the fault.
- Rewet of a dried tube was put down as 5.
- A dot card is a sample, not for sale; its marks are kept for interest and never compared.
- "per ml" is computed by the sheet. Prices are pounds by the cells' number format.
- Opened is the day of looking as well. OV did everything.
- ml is the tube's; half pans are not measured.
- Pigment belongs to every format of the line.
"""

JOINED = """
# 09-three-sheets.xlsx
OV's cupboard: what was bought, what was seen (one line a test), and where the shops are.
- Tests.No. is Bought.No, written there as text with leading zeros: 007 is piece 7.
- A piece's money is in Shops, by the name of the shop.
- "Each" is the price of one, computed by the sheet from Paid and Qty. Where Qty is 3 one of the three was tested.
- Row 42 of Bought is a sum. The sheet "scratch" is scribbling.
- Tests of 057 and 058 have no piece (numbers were promised to a parcel that never came).
- rewet: turns, more is worse, >60 = not reached at 60. bubbles: a count, more is worse.
- strength: share of the others' strength, LESS is worse. wrapper: 0, 1, 3 or 5, 5 worst.
- granulation 0 to 5 is a trait. Rewet and rewet are one test.
- OV and TL are testers; On is the day of the test, Date the day of buying.
"""

TWO_YEARS = """
# 10-two-years.ods
OV's list of two years, one sheet a year, each numbered from 1: 2024's number 5 and 2025's number 5 are two pieces.
- Rewet: in 2024 from 1 to 10, 10 BEST; in 2025 from 0 to 5, 5 WORST, half steps.
- The maker stands once (merged in 2024, in the first line only in 2025) and holds for the lines below.
- When: days, months or the year alone. "28 October" and "17.1." are of the sheet's year, day before month.
- A bare number such as 45520 under When is a day that lost its format (days since 30 December 1899).
- A day shown as "Oct 24" was typed as month and year; that it is stored as the first is the spreadsheet's doing.
- "mid August" is no more exact than August. When is the day of buying and of looking.
- Cost is pounds in 2024 and euros in 2025, as shown. What: format and size; an ml alone is a tube; pan is a full pan.
- Faults: none, or one or several of: cracked, paper stuck, dry as a bone, leaky. - = not looked at.
- Grain (2025) is a trait. Column J is hidden and private.
- Nobody wrote in 2024 who looked: it was OV. TL came in 2025.
"""

NOTEBOOK = """
# 11-notebook.csv
OV's notebook typed up: comma-separated UTF-8 without a mark, several lines within a cell, notes of several facts.
- A line with only a month and a year ("March 2025") says when the lines below it are; their own date is weekday and
  day.
- "what" holds maker, paint, size, format and batch in one cell.
- Only the sentences are there: no marks but "Grain about 3 of 5," (a trait).
- More turns and more froth are worse. Cracked, stuck, rock hard and leaked are faults.
- No sentence on cracks or wrapper: not written down, so neither good nor bad.
- "TL looked, I wrote." makes TL the tester of that line; all others are OV's.
- Errands and questions to oneself are no results.
- "Wet day, 71 % humidity." is a condition of that line's tests.
- "pics" is a photo's file name.
"""

RECEIPTS = """
# 12-receipts.csv
OV's receipts, typed in one below the other: semicolons, UTF-8 with a mark, and a first line "sep=;" that a
spreadsheet swallows (the heading is row 1 of the sheet as opened).
- Day, shop and order number stand in the first line of a receipt and hold until its total.
- $ is US dollars at Orquine and CANADIAN dollars at Tannisbeck. Fr. is Swiss francs; 5.- is 5.00.
- Days are day/month/year everywhere (20/03/2025 shows it; 05/09/2025 is 5 September).
- Price is for one piece; Line total says nothing new. A rebate is on the whole receipt and not in the prices.
- postage, rebate, TOTAL and the remark at the foot are no pieces. Qty 2 is two pieces alike.
- "Arrived how?": ok, cracked, dried out, leaked; capitals mean nothing. It was looked at when it came, by OV; that
  day is not written.
- Date is the day of the receipt. "1/2 pan" is a half pan, "pan" a full pan; "none" as Batch: none printed.
- Item is maker and paint in one cell.
"""
