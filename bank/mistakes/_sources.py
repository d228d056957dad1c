"""Sources of the mistakes, spelt out once; each member module puts them into its records.

A title marked "recalled" is known from memory only and wants checking before it is quoted elsewhere.
"""

from __future__ import annotations

NO_SOURCE = "common practice, no source"
FROM_MEMORY = "from memory"

STACEY_STEINLE_SITE = (
    "Stacey, Steinle and others, University of Melbourne, Teaching and Learning about Decimals, summary and cases, "
    "https://extranet.education.unimelb.edu.au/SME/TNMY/Decimals/Decimals/tests/incidenc.htm"
)
RESNICK_1989 = (
    "Resnick, Nesher, Leonard, Magone, Omanson & Peled 1989, Conceptual bases of arithmetic errors: the case of "
    "decimal fractions, J. for Research in Mathematics Education 20 (recalled; 1988 report ED299131 seen as abstract)"
)
SACKUR_LEONARD_1985 = (
    "Sackur-Grisvard & Leonard 1985, Intermediate cognitive organizations in the process of learning a mathematical "
    "concept, Cognition and Instruction 2 (recalled)"
)
HIEBERT_WEARNE_1985 = (
    "Hiebert & Wearne 1985, A model of students' decimal computation procedures, Cognition and Instruction 2, 175-205 "
    "(seen as abstract)"
)
HIEBERT_WEARNE_1986 = (
    "Hiebert & Wearne 1986, Procedures over concepts, in Hiebert (ed.), Conceptual and Procedural Knowledge (recalled)"
)
BROWN_1981 = (
    "Brown 1981, Place value and decimals, in Hart (ed.), Children's Understanding of Mathematics 11-16 (recalled)"
)
DECIMALS_NOTES = (
    "Errors and misconceptions in decimals, teacher notes citing Bell, Swan & Taylor 1981, "
    "scribd.com/document/534620738"
)
NOVA_SCOTIA = (
    "Nova Scotia elementary mathematical literacy assessment, what was learned about decimals, studylib.net/doc/7537192"
)
TEACHING_BLOG = "teaching blog on one pupil's product, brainkulo.org (an illustration, no data)"
COX_1974 = (
    "Cox 1974, Analysis, classification and frequency of systematic error computational patterns, ED092407 "
    "(seen as abstract)"
)
ASHLOCK = "Ashlock, Error Patterns in Computation (recalled)"
LANGFORD = (
    "Langford, Common student errors in addition and subtraction, langfordmath.com/ECEMath/Base10/AddSubErrors.html"
)
BROWN_BURTON_1978 = (
    "Brown & Burton 1978, Diagnostic models for procedural bugs in basic mathematical skills, Cognitive Science 2, "
    "155-192 (seen as abstract)"
)
BROWN_VANLEHN_1980 = "Brown & VanLehn 1980, Repair theory, Cognitive Science 4, 379-426 (opening seen)"
VANLEHN_1990 = "VanLehn 1990, Mind Bugs, MIT Press (recalled)"
RAGHUBAR_2009 = (
    "Raghubar, Cirino, Barnes, Ewing-Cobbs, Fletcher & Fuchs 2009, Errors in multi-digit arithmetic and behavioral "
    "inattention, J. Learning Disabilities, PMC2788949"
)
VERMEULEN_2020 = (
    "Vermeulen, Beguin, Scheltens & Eggen 2020, Evaluating the characteristics of diagnostic items for bridging "
    "errors, Frontiers in Education, doi 10.3389/feduc.2020.537531"
)
BEN_ZEEV = "Ben-Zeev, chapter abstract, doi 10.4324/9780203053270-5"
SUBTRACTION_MODEL = "a small published model of four subtraction mistakes with test values (seen second-hand)"
EXAM_QUESTION = (
    "an exam question on kinds of multiplication errors, solutioninn.com question 28726753 (an illustration)"
)
ROSE_2020 = "Rose 2020, A closer focus: common misconceptions in maths, NFER (opening seen)"
EKENSTAM_GREGER_1983 = "Ekenstam & Greger 1983, as reported on www-users.math.umd.edu/~dac/650old/publicpaper.html"
FISCHBEIN_1985 = (
    "Fischbein, Deri, Nello & Marino 1985, The role of implicit models in solving verbal problems in multiplication "
    "and division, J. for Research in Mathematics Education 16, 3-17 (recalled)"
)
BELL_1981 = (
    "Bell, Swan & Taylor 1981, Choice of operation in verbal problems with decimal numbers, Educational Studies in "
    "Mathematics 12 (recalled)"
)
CAMPBELL_GRAHAM_1985 = (
    "Campbell & Graham 1985, Mental multiplication skill: structure, process, and acquisition, Canadian J. of "
    "Psychology 39 (recalled: most wrong products belong to a neighbouring fact of the same table)"
)
NAEP_1983 = "the estimate of a product in the second and third national assessments, USA (recalled)"
NAEP_1986 = "account of the fourth national assessment 1986, USA, decimalsquares.com/naep1.html"
ROUNDING_KNOWLEDGE_PAGE = "teaching page, openknowledgegraph.com/topics/rounding-decimals-questions.html"
ROUNDING_QUESTION = "a pupil's question, math.techqa.club question 735607"
ROUNDING_FORUM = "teachers' forum, mathforum.org t2t thread 16325"


def corpus(*rows: int) -> str:
    """Return the source text for *rows* of the corpus of reported misconceptions."""
    numbers = ", ".join(map(str, rows))
    return f"row {numbers} of a public corpus of misconceptions reported in research (second-hand; names no papers)"


def cite(*sources: str) -> str:
    """Return *sources* as one text."""
    return "; ".join(sources)
