/* publish.h - the site as properties on the broker, and what comes from there: orders, and what
 * the outputs' devices report. */
#ifndef SLUICE_DAEMON_PUBLISH_H
#define SLUICE_DAEMON_PUBLISH_H

#include "common.h"
#include "loop/mailbox.h"
#include "orders.h"
#include "terms/decision.h"
#include "thermometers.h"
#include "values/values.h"

struct broker {
    struct mailbox *inbox; /* struct mqtt_message */
    struct mono since;     /* connected without a break since then; MONO_NEVER: not */
    enum reason_code published[SETTINGS_LOADS_MAX];
    struct mono texts_due; /* of slowly changing values */
};

void publish_start(struct broker *broker, struct common *common, const struct values_view *view);
/* After a reload. Another broker is begun anew: returns the connection to the old one, to be
 * stopped; NULL: the same goes on. */
struct mqtt *publish_reload(struct broker *broker, struct common *common,
                            const struct settings *before, const struct values_view *view);
void publish_listen(const struct common *common); /* to what the outputs' devices report */
void publish_turn(struct broker *broker, struct common *common, const struct values_view *view);
/* What has come since the last turn. */
void publish_take(struct broker *broker, const struct ordering *ordering, struct outputs *outputs,
                  struct thermometers *thermometers, const struct values_view *view);

#endif
