namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Random reads of 4 KiB, one at a time, over 256 MiB that were written before. Models the condition of the application classes; their
/// minimum is from the SD Association's public pages, the range and the missing queue are from memory. The reading is that of
/// <see cref="RandomReadWork"/>.
/// </summary>
internal sealed class ClassRandomReadWork(SlotContext context) : RandomReadWork(context);
