using System.Text;
using Cardassay.Agent.BlockIo;
using Cardassay.Plans;
using Cardassay.Registers;

namespace Cardassay.Agent.Commands;

/// <summary>Finds a plan by built-in name or file.</summary>
internal static class PlanFile
{
    /// <summary>Longest plan, bytes.</summary>
    private const int MaxBytes = 1 << 20;

    /// <exception cref="CommandException">No such plan, or it is damaged; names line and key.</exception>
    internal static Plan Load(string nameOrFile)
    {
        if (BuiltInPlans.Find(nameOrFile) is { } builtIn)
        {
            return builtIn;
        }

        Reading<byte[]> text = BoundedRead.Read(nameOrFile, MaxBytes);
        return text.IsKnown
            ? Parse(Encoding.UTF8.GetString(text.Value!).TrimStart('\uFEFF'), nameOrFile)
            : throw new CommandException(
                $"--plan \"{nameOrFile}\" is neither a built-in plan ({string.Join(", ", BuiltInPlans.Names)}) nor a readable file: "
                    + $"{(text.State == ReadingState.Absent ? "there is no such file" : text.Reason)}.", 2);
    }

    /// <exception cref="CommandException">The text is damaged; names line and key.</exception>
    internal static Plan Parse(string text, string name)
    {
        try
        {
            return PlanReader.Parse(text, name);
        }
        catch (PlanException e)
        {
            throw new CommandException(e.Message, 2);
        }
    }
}
