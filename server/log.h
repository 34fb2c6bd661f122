/* The log: one line an event on stderr, `time level event key=value ...`. Never secrets, never bodies. */
#ifndef COTYLD_LOG_H
#define COTYLD_LOG_H

#include "cotyledger/core/err.h"

enum cot_level { COT_LOG_ERROR, COT_LOG_WARN, COT_LOG_INFO };
void cot_log_level(enum cot_level most); /* what is more detailed is left out */
/* `fmt` makes "key=value key=value"; put values that others chose through cot_log_value. */
void cot_log(enum cot_level level, const char *event, const char *fmt, ...) COT_PRINTF(3, 4);
/* The value quoted and escaped where need be, cut to the buffer; returns `out`. */
const char *cot_log_value(const char *s, char *out, size_t len);
void cot_log_fault(enum cot_level level, const char *event, const struct cot_fault *fault);

#endif
