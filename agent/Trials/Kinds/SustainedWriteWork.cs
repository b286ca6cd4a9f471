namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Sequential writing of much more than a fast cache holds. Models a long recording, or restoring an image. Many cards write into a
/// small part used as single-level cells first and become slower when it is full; the timeline shows where (common practice, no
/// source). The writing is that of <see cref="SequentialWriteWork"/>; what differs is how long and how it is read afterwards.
/// </summary>
internal sealed class SustainedWriteWork(SlotContext context) : SequentialWriteWork(context);
