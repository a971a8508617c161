"""Names, streets and surgeries to draw from; all combinations are invented."""

GIRLS = (
    "Aisha Amelia Anwen Beatrix Bryony Carys Chloe Dorota Edith Elin Esme Farida Freya Grace "
    "Hana Imogen Isla Jasmin Keira Leila Mabel Maryam Megan Niamh Nora Oluchi Orla Poppy Priya "
    "Rosa Saoirse Seren Tamara Tilly Una Violet Wanda Ximena Yara Zofia"
).split()
BOYS = (
    "Aarav Alfie Angus Bartek Bilal Callum Cian Dafydd Dylan Eben Elias Emeka Finlay Gethin "
    "Harvey Hugo Idris Imran Jago Jakub Kofi Kwame Lachlan Leo Marek Milo Noah Oisin Owain Piotr "
    "Rafe Rhys Rowan Samir Stefan Tariq Tomos Uche Wilf Yusuf"
).split()
WOMEN = (
    "Agnes Alice Barbara Brenda Carol Christine Daphne Deirdre Doreen Eileen Elspeth Ewa Fatima "
    "Freda Gillian Gwen Halina Hazel Irene Jean Joan Kathleen Lakshmi Linda Mair Maureen Mavis "
    "Nasreen Olive Pamela Patience Rita Rosemary Sheila Shirin Sylvia Thelma Ursula Winifred "
    "Yvonne"
).split()
MEN = (
    "Albert Alun Andrzej Anthony Barry Bernard Cedric Clive Colin Cyril Dennis Desmond Donald "
    "Edwin Emrys Ernest Farouk Frank Geoffrey Gordon Gurdeep Harold Hassan Ivor Jerzy Keith "
    "Kenneth Leonard Mohan Neville Norman Ossie Percy Raymond Reginald Roy Sidney Trevor Vernon "
    "Winston"
).split()
FAMILIES = (
    "Abara Achterberg Alderwick Ashdown Banerjee Barraclough Bexley Birtwhistle Blenkin Bogdan "
    "Brackenbury Cadwallader Calloway Chaudhry Cholmeley Coppersmith Cresswell Dankworth Dhillon "
    "Drinkwater Dziedzic Eastaway Ekwueme Fairclough Farrant Fenwick Garside Goodacre Greenhalgh "
    "Gwilliam Hardcastle Hathersage Heptonstall Hollis Hussain Ibbotson Inchbald Jankowska "
    "Jessop Kaczmarek Kettlewell Khatun Lamplugh Larkham Llewellyn Lovibond Macklin Mahmood "
    "Marchbank Mellor Mensah Mistry Mukherjee Nettleship Nowicki Oakden Okonkwo Orrell Osei "
    "Penhaligon Petrov Pickersgill Postlethwaite Prabhu Quarmby Ravenscroft Rehman Rigg Rothwell "
    "Sandhu Satterthwaite Shufflebotham Skelton Stainforth Sunderland Tattersall Thackray "
    "Tindall Tregenza Uddin Umpleby Varley Verrall Wadsworth Wigglesworth Winterbourne Woodhead "
    "Wrathall Xavier Yardley Yeadon Zielinska"
).split()
STREETS = (
    "Tanner's Row",
    "Cindermoor Lane",
    "Old Ropewalk",
    "Gallowsgate Hill",
    "St Osyth's Terrace",
    "Brickfield Crescent",
    "Weaver's Ginnel",
    "Nine Elms Walk",
    "Kiln Bank",
    "Pepperpot Court",
    "Mafeking Villas",
    "Larkspur Avenue",
    "Damson Garth",
    "Upper Sluice Road",
    "Quarry Steps",
    "Hopyard Close",
)
PLACES = (("Wrenfield", "WF99 4"), ("Nether Wrenfield", "WF99 5"), ("Cindermoor", "WF99 7"))
"""Invented places, with the beginning of their postcodes."""
INWARD = "ABDEFGHJLNPQRSTUWXYZ"
"""Letters that stand in the second half of a postcode."""
SURGERIES = ("Millrace Surgery", "Cindermoor Health Centre", "Dr Pell and partners")
CARE_HOMES = (
    ("Fernhollow House", "1 Quarry Steps", "Wrenfield", "WF99 4QS"),
    ("The Hollies", "88 Upper Sluice Road", "Cindermoor", "WF99 7UJ"),
)
EXAMINERS = ("A. Quill", "A. Quill", "A. Quill", "M. Osei", "M. Osei", "M. Osei", "")
"""Who examined, as the files name them; the last is a visit where nobody noted it."""
