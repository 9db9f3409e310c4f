/* listen.h - who asks what of whom, from the bytes of a line that others use.
 *
 * Bytes go in as they come, in pieces of any size; exchanges come out, each a
 * question with what became of it. Made so that a wrong value is worse than none:
 *
 * - a frame is one only by its CRC; noise between frames costs the frames it hit;
 * - an answer belongs to the question right before it, and must have its unit, its
 *   function and its length;
 * - a question that was left unanswered is still owed an answer. Until an answer
 *   comes that can only be a newer question's, or the unit has had its peace, what
 *   would fit both an owed question and the present one is doubtful, and so is an
 *   answer that another one follows.
 *
 * Pure: time comes with the bytes, memory is the caller's, nothing is allocated. */
#ifndef SLUICE_FRAME_LISTEN_H
#define SLUICE_FRAME_LISTEN_H

#include "frame/frame.h"

enum heard_kind {
    HEARD_ANSWERED,   /* `answer` is the answer to `request` */
    HEARD_REFUSED,    /* it is an exception */
    HEARD_UNANSWERED, /* the next question came instead */
    HEARD_GARBLED,    /* something came that was no frame */
    HEARD_DOUBTFUL,   /* it may be the answer to another question: no value may be taken */
    HEARD_STRAY,      /* an answer without a question: no `request` */
    HEARD_BROADCAST,  /* a request to all, which nobody answers */
};

struct heard {
    enum heard_kind kind;
    uint8_t unit;
    const uint8_t *request, *answer; /* PDUs; NULL: there is none. They last for the call */
    size_t request_length, answer_length;
    int64_t asked_us, answered_us; /* when their last bytes came */
};

typedef void listen_fn(void *context, const struct heard *heard);

struct listen_counts {
    uint64_t bytes, frames;
    uint64_t noise_bytes; /* that belong to no frame */
    uint64_t kind[HEARD_BROADCAST + 1];
    uint64_t twice;     /* answers that came a second time */
    uint64_t overtaken; /* questions that another followed sooner than a master gives up:
                         * two masters */
};

enum { LISTEN_BYTES = 1024, LISTEN_OWED_MAX = 32, LISTEN_UNITS = 248 };

struct listen_question {
    bool open;
    uint8_t unit;
    uint8_t length;
    uint8_t pdu[FRAME_PDU_MAX];
    int64_t at_us;
    size_t noise;                     /* bytes since that belong to no frame */
    size_t noise_booked;              /* of these: for which all owe an answer already */
    uint8_t header[3];                /* the first of them */
    int64_t noise_begun_us, noise_us; /* when the first and the last of them came */
    bool paused;                      /* it was silent between them for as long as a master waits */
    bool doubted;                     /* the bytes could be read in two ways */
};

struct listen_owed {
    uint8_t unit;
    uint8_t pdu[5]; /* a read: function, address, quantity; 0: one that was not heard */
};

struct listener {
    listen_fn *told;
    void *context;
    struct listen_counts counts;
    uint8_t bytes[LISTEN_BYTES];
    size_t used;
    int64_t oldest_us, newest_us; /* when the first of them came, or earlier; and the last */
    struct listen_question question;
    /* The answer to `question`, kept back until it is known that no second one follows. */
    bool held;
    uint8_t answer[FRAME_PDU_MAX];
    uint8_t answer_length;
    int64_t answered_us;
    struct listen_owed owed[LISTEN_OWED_MAX]; /* oldest first */
    uint8_t owed_count;
    bool missed; /* a question may have been lost in noise */
    /* The last answer, while no question has come since. */
    bool repeats;
    uint8_t last_unit, last_length;
    uint8_t last[FRAME_PDU_MAX];
    struct {
        bool met;        /* it has been asked since noise last hid a question */
        bool seen;       /* it has answered before */
        bool was_answer; /* what was last heard of it */
        bool twice;      /* it has answered twice before */
        int64_t at_us;
    } unit[LISTEN_UNITS];
};

/* `told` is called from within listen_feed and listen_quiet. */
void listen_begin(struct listener *listener, listen_fn *told, void *context);

/* `now_us`: when these bytes came, by a clock that never steps. */
void listen_feed(struct listener *listener, const uint8_t bytes[], size_t count, int64_t now_us);

/* To be called when nothing has come for LISTEN_QUIET_US: longer than adapters keep
 * bytes back, shorter than it takes to miss a reading. What is not whole is noise. */
enum { LISTEN_QUIET_US = 100000 };
void listen_quiet(struct listener *listener);

#endif
