namespace Cardassay.Agent.Trials.Kinds;

/// <summary>
/// Random writes of 4 KiB, one at a time, over 256 MiB. Models the condition of the application classes; their minimum is from the SD
/// Association's public pages, the range and the missing queue are from memory. The writing is that of <see cref="RandomWriteWork"/>.
/// </summary>
internal sealed class ClassRandomWriteWork(SlotContext context) : RandomWriteWork(context);
