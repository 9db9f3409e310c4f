/* board.h - the inputs among their edges: what they show of each load, presses that become
 * orders, and what is wrong with them. */
#ifndef SLUICE_DAEMON_BOARD_H
#define SLUICE_DAEMON_BOARD_H

#include "common.h"
#include "inputs.h"
#include "lines.h"
#include "orders.h"

struct board {
    struct lines *lines;     /* devices are reached by these */
    struct input_bank *bank; /* NULL: there is no input */
    uint8_t round;           /* of banks: an older one's answers are not taken for this one's */
};

bool board_open(struct board *board, struct lines *lines, const struct common *common,
                struct trouble *trouble);
void board_end(struct board *board);

/* Posts the reads that are due. */
void board_ask(struct board *board, struct mono now);
struct mono board_next(const struct board *board);
void board_answer(struct board *board, const struct bus_answer *answer);

/* What is sensed at each load, into its reading. */
void board_settle(const struct board *board, struct inputs *inputs, const struct common *common);
/* Presses since the last turn, as orders. */
void board_obey(struct board *board, const struct ordering *ordering);
/* Once a turn: what is wrong. */
void board_look(const struct board *board, struct common *common);

/* At a reload, once the buses are there: an input that is the same goes on as it was read.
 * False: out of memory, and there is none. */
bool board_replace(struct board *board, struct common *common, const struct settings *before,
                   struct trouble *trouble);

struct input_view board_view(const struct board *board, uint8_t index, struct mono now);

#endif
