using Cardassay.Collector.Commands;
using Cardassay.Trust;

Console.SetOut(new PlainWriter(Console.Out));
Console.SetError(new PlainWriter(Console.Error));
return await CommandLine.RunAsync(args);
