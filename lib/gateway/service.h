/* service.h - what a request gets: an answer at once, or a place in the queue for a bus.
 * Pure: bytes and times in, bytes out. */
#ifndef SLUICE_GATEWAY_SERVICE_H
#define SLUICE_GATEWAY_SERVICE_H

#include "frame/frame.h"
#include "gateway/register_cache.h"
#include "gateway/view.h"

struct service {
    const struct gateway_settings *settings;
    struct register_cache cache;
    struct view views[GATEWAY_SERVED_MAX]; /* of those served as SunSpec */
};

struct reply {
    uint8_t length;
    uint8_t pdu[FRAME_PDU_MAX];
};

enum verdict {
    VERDICT_ANSWER,   /* the reply is there */
    VERDICT_REFUSE,   /* the reply is an exception of our own */
    VERDICT_PASS,     /* to be asked of that bus and unit */
    VERDICT_NOT_OURS, /* no such unit here */
};

struct judgement {
    enum verdict verdict;
    struct reply reply;
    uint8_t bus, unit;
};

void service_begin(struct service *service, const struct gateway_settings *settings,
                   const char *version);
void service_sample(struct service *service, uint8_t meter, const struct meter_sample *sample,
                    int64_t at_us);

struct judgement service_judge(const struct service *service, uint8_t unit, const uint8_t pdu[],
                               size_t length, int64_t now_us);

/* Whether that unit is one of ours. */
bool service_has(const struct service *service, uint8_t unit);

/* Whether a PDU only reads: then two that are equal may share an answer. */
bool service_only_reads(const uint8_t pdu[]);

struct reply service_exception(uint8_t function, uint8_t code);

/* What the client hears of a question that was passed on. */
struct reply service_passed(const uint8_t pdu[], const struct pass_news *news);

#endif
