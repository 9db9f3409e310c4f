/* thermometers.h - the sensors in tanks among their edges: what they tell of each load, and what
 * is wrong with them. */
#ifndef SLUICE_DAEMON_THERMOMETERS_H
#define SLUICE_DAEMON_THERMOMETERS_H

#include "common.h"
#include "inputs.h"

struct thermometers {
    struct mailbox *answers; /* struct sensor_answer */
    struct sensors *sensors; /* NULL: there is none */
    uint8_t round;
};

bool thermometers_open(struct thermometers *thermometers, const struct common *common,
                       struct trouble *trouble);
void thermometers_end(struct thermometers *thermometers);

/* Has those read that are due. */
void thermometers_ask(struct thermometers *thermometers, struct mono now);
struct mono thermometers_next(const struct thermometers *thermometers);
bool thermometers_wait(const struct thermometers *thermometers); /* one is being read */
void thermometers_take(struct thermometers *thermometers, struct mono now);
void thermometers_message(struct thermometers *thermometers, const struct mqtt_message *message,
                          struct mono now);

/* What is known of each tank, into its load's reading; after that of the meters. */
void thermometers_settle(const struct thermometers *thermometers, struct inputs *inputs,
                         const struct common *common);
/* Once a turn: what is wrong. */
void thermometers_look(const struct thermometers *thermometers, struct common *common);
/* The topics that they come on. */
void thermometers_listen(const struct common *common);

/* At a reload: a sensor that is the same goes on. The old ones go to `old`, to be freed aside:
 * a file may be slow. False: out of memory, and there is none. */
bool thermometers_replace(struct thermometers *thermometers, struct common *common,
                          const struct settings *before, struct sensors **old,
                          struct trouble *trouble);

struct sensor_view thermometers_view(const struct thermometers *thermometers, uint8_t index,
                                     struct mono now);

#endif
