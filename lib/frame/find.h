/* find.h - what stands at the beginning of a serial line's bytes: a request, an
 * answer, or noise.
 *
 * A listener has nothing but bytes: adapters hand them over in pieces of their
 * own, and the silence that parts frames is lost on the way. So a frame is found
 * by its function and byte count, which say how long it is, and by its CRC. Pure. */
#ifndef SLUICE_FRAME_FIND_H
#define SLUICE_FRAME_FIND_H

#include "frame/frame.h"

enum frame_found {
    FOUND_NOISE, /* no frame begins here: the first byte can be let go */
    FOUND_MORE,  /* the end of what may be a frame has not come yet */
    FOUND_REQUEST,
    FOUND_ANSWER,
    FOUND_EITHER, /* whole both as a request and, longer, as the answer awaited; `length`
                   * is the request's */
};

/* The request whose answer is awaited; no pdu: none is. */
struct frame_awaited {
    uint8_t unit;
    const uint8_t *pdu;
    size_t length;
};

/* `ended`: nothing more will come, so what is not whole is noise. */
enum frame_found frame_find(const uint8_t bytes[], size_t have, bool ended,
                            const struct frame_awaited *awaited, size_t *length);

/* How many bytes the frame of a good answer to this request has, or of a refusal where that does
 * not follow from the request. */
size_t frame_answer_bytes(const uint8_t request[], size_t length);

#endif
