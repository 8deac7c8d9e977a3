//! Makes synthetic clinic exports with known truth; shares no rule with the pipeline.
