/* fault.h - something that is wrong now: what is known (a meter does not answer) and what is
 * inferred (a finding), in one form.
 *
 * Its id is the kind's and the name of what it is about, and stable: "no-power-water-heater".
 * What to do first follows from the id, so that a fault that is over can tell it too. */
#ifndef SLUICE_TERMS_FAULT_H
#define SLUICE_TERMS_FAULT_H

#include "terms/finding.h"

/* How a fault ends, in the log and the ledger: what is said of one that is over begins so. */
#define FAULT_SOLVED "solved"
#define FAULT_UNWATCHED "no longer watched since the settings changed"
#define FAULT_UNSUPPOSED "no longer supposed: something else explains better what was seen"

/* Whether an event of a fault says that it is over. */
bool fault_text_is_end(const char *text);

enum { FAULT_ID_MAX = 64, FAULT_TEXT_MAX = 200, FAULT_NAME_MAX = 32, FAULT_OF_SITE = 0xffff };

struct fault {
    char id[FAULT_ID_MAX];
    char name[FAULT_NAME_MAX]; /* of the load or meter, where the text does not say it; or "" */
    char text[FAULT_TEXT_MAX];
    uint16_t load; /* that it is about; FAULT_OF_SITE: of none */
    /* What is known has FINDING_NONE, and of its finding only `since` and `seen`: how often it
     * has come since the start. */
    struct finding finding;
};

/* "Heat pump: possible: ...", where the text does not say what it is about. */
void fault_write_line(const struct fault *fault, struct text *text);

/* "likely, 91 %"; of what is known, or said by a rule, nothing. Never 100 %: it is inferred. */
void fault_write_sure(const struct finding *finding, struct text *text);

/* From so many percent on a fault is said to be very likely. */
enum { FAULT_VERY_LIKELY_PERCENT = 95 };

/* 100 of what is known; of what is inferred at most 99; 0: not given. */
int fault_sure_percent(const struct finding *finding);

/* What to do first, with the cautions that go with it. */
void fault_write_first(const struct fault *fault, struct text *text);

/* Whether `id` is a fault's, of what is known or of what is inferred. */
bool fault_id_ok(const char *id);

/* What `id` says of the thing it is about: the rest behind the kind; "" where it is of the
 * site. Points into `id`. */
const char *fault_id_name(const char *id);

#endif
